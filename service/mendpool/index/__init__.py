"""Finds past reports: derived from the change feed, thrown away and rebuilt at will."""
