"""What is odd about readings: rows, runs against each other and the bench, boiling, and slips that would account."""
