"""A drawer of surveys against a new list of stations, on every core of a computer or on a cluster.

In come a folder with surveys below it and the list's records by channel plan; out go, for every
survey, position and station, the path word, loss [dB], margin [dB] and reception by the new list,
beside the word by the survey's own. No survey is changed; what is done is kept in a journal.
"""
