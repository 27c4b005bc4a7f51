"""A summary as a FHIR bundle."""
