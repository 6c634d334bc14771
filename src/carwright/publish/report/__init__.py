"""The report: one content model, shown as a page that stands alone and as a PDF."""

from carwright.publish.report.assemble import report_of, summary
from carwright.publish.report.page import report_html
from carwright.publish.report.printed import report_pdf

__all__ = ["report_html", "report_of", "report_pdf", "summary"]
