"""The link budget: the field at the roof, the antenna, the line, the receiver and its neighbours.

In come metres, megahertz, kilowatts and decibels as numbers or arrays; angles are in radians. Out
come fields in dB(uV/m), powers in dBm and losses, gains and ratios in decibels, each by name.
Nothing here knows of surveys or of silhouettes: what stands in the way is another package's loss.
"""
