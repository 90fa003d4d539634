from needlewright.proofs.certificate import report_as_found
from needlewright.proofs.job_summary import summarise
from proofs.drawn_job import FAMILY
from proofs.proof_job import job, measured, proof, turned, with_rows


def test_four_lines_say_what_the_proofs_say():
    summary = summarise(report_as_found(FAMILY, job(), measured("as-found")), proof())
    assert summary.came_in.split("; ")[1] == (
        "speed does not conform (3.5 km/h low at 40 km/h, down)"
    )
    assert summary.needles.startswith("turn: engine +3.4 ± ")
    assert summary.needles.endswith("; not the seat: speed and fuel; leave: temp")
    assert summary.turned.startswith("engine by +3.")
    assert ", asked +3.4 ± " in summary.turned
    assert summary.goes_out.startswith("Certificate of check after rebuild; conforms: ")


def test_a_needle_that_was_not_turned_is_seen():
    """The report asks for a turn, and the run as left still has the engine needle where it was."""
    unturned = with_rows(measured("as-left"), "engine", turned(-3.2))
    report = report_as_found(FAMILY, job(), measured("as-found"))
    summary = summarise(report, proof(unturned))
    asked = summary.turned.split(",")[0]
    assert abs(float(asked.removeprefix("engine by ").rstrip("°"))) < 0.3
    assert "with exceptions" in summary.goes_out
    assert "does not conform" in summary.goes_out


def test_nothing_to_turn():
    left = measured("as-left")
    report = report_as_found(FAMILY, job(), left)
    assert summarise(report, proof()).turned == "nothing"
    assert "turn:" not in summarise(report, proof()).needles
