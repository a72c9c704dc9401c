"""A practice companion for jazz pianists: it follows the player through a chart and plays the other hand."""

__version__ = "0.1.0"
