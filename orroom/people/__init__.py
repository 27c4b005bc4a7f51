"""Each person's figures across closed cases, fair to small numbers: a clinic's own file and two pages.

The file (``people_file.py``) has counts by case, person and measure, and nothing else of a case. It is the
clinic's own: for one account (0600), in no archive, in no export, never next to a case. Who leaves is deleted
from it, bytes and all. A person's own page is shown first; a meeting sees letters, newly drawn for each
measure, and only of those who have seen their own page. No page, list or file ranks anybody.

Grafts of one case are alike (``alike.py``), so counts are worth fewer independent ones; every figure uses
those: shares drawn to the team (``drawing.py``), the funnel, the running chart (``running.py``), how many are
needed (``enough.py``).
"""
