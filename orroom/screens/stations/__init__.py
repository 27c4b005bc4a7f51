"""The stations: cutting, placing, overview, and what lies over them."""
