"""The scan that closes the loop: what a receiver found beside what was predicted, and why not.

Rows of a scan and a survey come in as arrays over stations (S), in dBm, dB and degrees. Out go
each station's difference, the offset common to all with its sigma, and the probability of every
fault that could have made the pattern.
"""
