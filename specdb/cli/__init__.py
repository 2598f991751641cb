"""The ``specdb`` command: thin callers of :mod:`specdb.verbs`, one module a group of commands."""
