"""The rules themselves, one function each; ``orroom.case.rules`` lists them all.

Their annotations are values, not texts: each start of a station looks at all of them.
"""
