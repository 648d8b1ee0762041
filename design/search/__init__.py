"""The main job: every combination looked at, and what a plan says of the best."""
