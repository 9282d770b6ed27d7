"""Families of obstruction kinds; light to import, since help texts and pictures ask it too."""

from __future__ import annotations

TREES = ("conifer", "broadleaf", "dead_tree", "tree")
"""Kinds that let part of the wave through their crowns."""

WIRES = ("wire", "power_line")
"""Kinds that cost nothing: a hazard, not an obstacle."""

GROUNDED = (*TREES, "building", "mast", "hill", "own_roof")
"""Kinds that stand on the ground, so that their outlines go on down to it."""
