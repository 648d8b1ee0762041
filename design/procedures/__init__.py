"""How readings are taken and turned into the latent heat: one file a procedure."""
