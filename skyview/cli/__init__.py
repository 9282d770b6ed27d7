"""The command line: words typed in, sentences, tables or JSON out.

Arguments come in as degrees, metres and megahertz; answers go to standard output, warnings and
errors to standard error, each error as one sentence. Exit codes: 0 done, 2 for what the user can
mend, 1 for storage trouble or a fault of the program, 130 when interrupted.
"""
