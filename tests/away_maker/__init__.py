"""Micrograph files of honed ground with known answers, made by lips of metal that reach over grooves along the stroke."""
