"""The workbench: a local page on which a survey is marked and answered.

In come HTTP requests of the page (ids, pixels, degrees, metres, files as bytes, never paths); out
go JSON answers in the units of the survey file, tiles of the photographs and events. Every
formula stays below this layer: the page knows the picture's pixels and draws what it is sent.
"""
