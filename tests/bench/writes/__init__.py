"""Reports written over HTTP beside a bare route that keeps the same rows; see `__main__`."""
