"""The GUM uncertainty framework: propagation, validation, and the budget as a report."""
