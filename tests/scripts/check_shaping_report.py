"""Reads the structured report of a comparison before and after shaping with
pydicom and compares the numbers of every level with the findings.

    check_shaping_report.py REPORT.dcm FINDINGS.json BEFORE.dcm AFTER.dcm
"""
import json
import sys

import pydicom

OWN = "99LENGTHFILM"
LEVEL = {
    "WIDTH_BEFORE": "width_before_mm",
    "WIDTH_AFTER": "width_after_mm",
    "REMOVED_LEFT": "removed_left_mm",
    "REMOVED_RIGHT": "removed_right_mm",
    "TRANSPORT": "transport_mm",
    "REMAINING_LEFT": "remaining_left_mm",
    "REMAINING_RIGHT": "remaining_right_mm",
}


def concept(item):
    return item.ConceptNameCodeSequence[0].CodeValue


def groups(report):
    measurements = [i for i in report.ContentSequence if concept(i) == "126010"][0]
    return measurements.ContentSequence


def numbers(group):
    """method code -> (value, bounds)"""
    found = {}
    for item in group.ContentSequence:
        if item.ValueType != "NUM":
            continue
        method = [
            child.ConceptCodeSequence[0]
            for child in item.ContentSequence
            if concept(child) == "370129005"
        ][0]
        assert method.CodingSchemeDesignator == OWN, method
        bounds = [
            float(child.MeasuredValueSequence[0].NumericValue)
            for child in item.ContentSequence
            if concept(child) in ("371886008", "371885007")
        ]
        measured = item.MeasuredValueSequence[0]
        found[method.CodeValue] = (float(measured.NumericValue), bounds)
    return found


def tracking(group):
    return [i for i in group.ContentSequence if concept(i) == "112039"][0].TextValue


def main(report_path, findings_path, *film_paths):
    report = pydicom.dcmread(report_path)
    with open(findings_path) as file:
        findings = json.load(file)
    films = [pydicom.dcmread(path, stop_before_pixels=True) for path in film_paths]
    evidence = [
        instance.ReferencedSOPInstanceUID
        for study in report.CurrentRequestedProcedureEvidenceSequence
        for series in study.ReferencedSeriesSequence
        for instance in series.ReferencedSOPSequence
    ]
    assert sorted(evidence) == sorted(f.SOPInstanceUID for f in films), evidence
    assert report.StudyInstanceUID == films[0].StudyInstanceUID
    by_name = {tracking(group): numbers(group) for group in groups(report)}
    compared = 0
    for canal in findings["canals"]:
        assert canal["name"] in by_name, by_name.keys()
        for level in canal["levels"]:
            name = "%s, %.2f mm from the end" % (canal["name"], level["from_end_mm"])
            found = by_name[name]
            assert abs(found["LEVEL"][0] - level["from_end_mm"]) < 1e-9
            for code, key in LEVEL.items():
                stated = level[key]
                assert (stated is None) == (code not in found), (name, code)
                if stated is None:
                    continue
                value, bounds = found[code]
                assert abs(value - stated["value"]) < 1e-9, (name, code)
                assert all(abs(b - stated["u95"]) < 1e-9 for b in bounds), (name, code)
                assert len(bounds) == 2
                compared += 1
    assert compared >= 30, compared
    print("pydicom: %d numbers of the levels are equal" % compared)


if __name__ == "__main__":
    main(*sys.argv[1:])
