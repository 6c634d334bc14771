"""Any report as files: a page, a print, or both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from carwright.publish.report.content import Report
from carwright.publish.report.page import page_html
from carwright.publish.report.printed import Paper, pages_pdf
from carwright.publish.theme import Theme


def report_files(
    report: Report, name: str, formats: Sequence[str], theme: Theme, paper: Paper
) -> Iterator[tuple[str, bytes]]:
    """File name and content for each of ``html`` and ``pdf`` asked for."""
    if "html" in formats:
        yield f"{name}.html", page_html(report, theme).encode()
    if "pdf" in formats:
        yield f"{name}.pdf", pages_pdf(report, theme, paper=paper)
