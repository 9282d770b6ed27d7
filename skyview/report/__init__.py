"""What a person looks at: the annotated picture of a view, the table of paths, and all wording.

In come the frozen results of the survey (degrees, metres, MHz, dB); out go PNG, SVG or PDF files
and plain text, with the same units said beside each figure.
Inside a picture places and sizes are px from its upper left corner, y down; 1 px is 0.72 pt.
"""
