"""Sheets to print from a plan: labels, the paper tally, the zones for the wall, the figures.

A drawing is as broad as the page, ``svg.WIDTH`` units on the 178 mm between the margins of A4.
"""
