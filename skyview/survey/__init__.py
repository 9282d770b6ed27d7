"""The survey file, its storage, and the whole chain from it to answers.

In comes one folder a survey: ``survey.json`` and its photographs, in degrees, metres, MHz, dB
and kW, unknown values absent or null. Out go checked models, findings on what is missing, and
frozen results in the same units; every error is one sentence that names file, field and mend.
"""
