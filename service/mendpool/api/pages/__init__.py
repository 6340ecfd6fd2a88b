"""The page without scripts: ask, report and follow up by plain forms."""
