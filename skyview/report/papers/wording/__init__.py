"""All wording of the papers, a module each, by code; figures come in with their units rounded.

What comes in are numbers in metres, degrees, decibels and chances, codes and names; what goes out
are sentences and headings. A translation replaces these modules and nothing else.
"""
