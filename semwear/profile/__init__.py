"""Height maps and profiles of surfaces: bearing curve and what follows from it."""
