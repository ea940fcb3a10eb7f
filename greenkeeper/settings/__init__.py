"""Settings: the grower's one YAML file, checked completely before use.

schema.py holds the checked, frozen types every other room may import, and derived.py
what follows from them. load.py turns a file into them or into all of its faults at once:
yamlnodes.py reads YAML, translate.py and wording.py tell of single keys as keys.py sees
them, rules.py asks the checks over several keys in checks/, on a draft (draft.py) where
the file has other faults. json_schema.py tells an editor what check would say.
"""
