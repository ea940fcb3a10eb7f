"""Settings: the grower's one YAML file, checked completely before use.

schema.py holds the checked, frozen types every other room may import; load.py turns
a file into them or into a list of faults; rules.py has the checks that need more
than one key.
"""
