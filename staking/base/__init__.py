"""Units, axes, weighted least squares and errors: what every other room stands on."""
