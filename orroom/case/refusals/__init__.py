"""The rules themselves, one function each; ``orroom.case.rules`` lists them all."""
