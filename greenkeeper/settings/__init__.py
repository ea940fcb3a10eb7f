"""Settings: the grower's one YAML file, checked completely before use.

schema.py holds the checked, frozen types every other room may import, and derived.py
what follows from them. load.py turns a file into them or into all of its faults at once:
yamlnodes.py reads YAML, translate.py and wording.py tell of single keys as keys.py sees
them, rules.py asks the checks over several keys in checks/, on a draft (draft.py) where
the file has other faults. json_schema.py tells an editor what check would say.
"""

from contextlib import suppress

from greenkeeper.promised import imported

# pydantic looks through all installed packages for some that want a say in what is checked.
# What a settings file means must not hang on them; and what it takes to look is 1 MiB of the
# keeper's memory. Here, because this must come before anything of pydantic's. Another version
# may have no such module: then it looks as it always did.
with suppress(ModuleNotFoundError):
    imported(
        "pydantic.plugin._loader",
        without=["importlib.metadata"],
        instead={"entry_points": lambda **_: ()},
    )
