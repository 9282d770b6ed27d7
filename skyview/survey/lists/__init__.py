"""Lists of stations and landmarks as people have them, and tables to take away.

In come files: delimited text in any usual dialect, or GeoJSON points, with positions, powers and
heights in the spellings and units of their authors. Out go records with exactly the field names
of the survey file (degrees, metres above sea level, kW over a half-wave dipole), the rows that
could not be used with line, field and reason, and a sentence for all that was assumed or
converted; ``export`` writes rows as CSV and bearings as GeoJSON.
"""
