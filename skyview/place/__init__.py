"""The site, the stations and the earth between them.

In come latitudes and longitudes (WGS 84, degrees), heights above sea level (metres) and channel
numbers; out go azimuths, distances, elevations over the curved earth and frequencies. Nothing
here knows what a photograph shows.
"""
