"""Figures: one function a figure; each draws into the axes or the figure it is given and returns what it drew."""
