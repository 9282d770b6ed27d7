"""Does a station come in: from the transmitter's power to the set's margin, with its spread.

Stations, antennas and the losses in front of them come in as arrays over antenna positions (A) and
stations (S), degrees and decibels. Margins, probabilities, causes and cures go out, in dB.
"""
