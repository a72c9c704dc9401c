"""What a player may change: the files of ``configs/`` as typed objects, one module a file.

Use it so::

    from companion.preferences import preferences
    from companion.preferences.touch import TouchPreferences

    touch = preferences(TouchPreferences)          # configs/touch.toml with the player's own values laid over it
    touch.parts["bass"].level           # a velocity, 1-127

Read it where a call begins and pass the object on; nothing is looked up by name in the midst of an algorithm. How a
table is described is in :mod:`companion.preferences.structure`, the units in :mod:`companion.preferences.units`.
"""

from companion.preferences.reading import preferences

__all__ = ["preferences"]
