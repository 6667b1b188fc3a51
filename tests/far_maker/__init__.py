"""Micrographs with known answers by another hand, used only to report how well the measurement does on foreign pictures."""
