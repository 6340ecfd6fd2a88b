"""The invented co-op: reports by people who do not exist, for the demo and the tests."""
