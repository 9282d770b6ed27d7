"""Papers: what is printed or handed over, as PDF and as one HTML file with the same content.

A paper is a row of blocks (``blocks``), made from a survey's answers; ``typeset`` makes the PDF
and ``page`` the HTML. All words come from the word modules, all sizes are in millimetres or
points.
"""
