"""Water, heat losses, droplets, and the evidence for what nobody measures."""
