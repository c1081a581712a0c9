"""Where north is: declination, grid convergence."""
