"""From readings to a result, its budget, and the evidence for an evaluation."""
