"""One sentence each: file a report, ask, judge readings, follow up, withdraw."""
