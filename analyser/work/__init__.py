"""One log's whole way from file to page, and many logs' over cores or a cluster, with what an earlier run left."""

from analyser.work.job import Job
from analyser.work.one import Outcome, Report, debrief_file

__all__ = ["Job", "Outcome", "Report", "debrief_file"]
