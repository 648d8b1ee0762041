"""A time-stepped bench that plays the experiment, and an observer who writes down only what can be seen."""
