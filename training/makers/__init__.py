"""Makers of simulated training fields that share nothing but what they return; see made.py."""
