"""All jobs on one set of hands: what is done when, by whom, on which bench; when a job is ready; which day may be told.

What is asked stands in `asked`, what is answered in `planned`. Pure: no Django, no clock, no chance that is not seeded.
"""
