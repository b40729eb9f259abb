"""Reads a structured report with pydicom and highdicom and compares every
number with the findings it was made from.

    check_structured_report.py REPORT.dcm FINDINGS.json FILM.dcm

Prints one line per parser and check; exits 1 with the difference otherwise.
highdicom, which also knows what each module requires, is used where it is
installed.
"""
import json
import sys

import pydicom
from pydicom.sr.codedict import codes

OWN = "99LENGTHFILM"
LENGTHS = {
    "CURVED_LENGTH": "curved_length_mm",
    "CHORD": "chord_mm",
    "REFERENCE_APEX": "reference_to_apex_mm",
    "TIP_APEX": "tip_to_apex_mm",
    "TIP_APEX_DIRECT": "tip_to_apex_straight_mm",
    "WL_FILE": "working_length_additive_mm",
    "WL_PROPORTION": "working_length_proportion_mm",
    "WL_CHART": "working_length_chart_mm",
    "ALLOWANCE": "allowance_mm",
    "CURVED_PX": "curved_length_px",
}
CURVATURE = {
    "SCHNEIDER": "schneider_deg",
    "WEINE": "weine_deg",
    "AXIS_AXIS": "axis_axis_deg",
    "PRUETT": "pruett_deg",
    "PRUETT_RADIUS": "pruett_radius_mm",
    "LUITEN": "luiten_deg",
    "SCHAEFER_RADIUS": "schafer_radius_mm",
    "SCHAEFER_LENGTH": "schafer_curve_length_mm",
    "CANAL_ACCESS": "canal_access_deg",
    "CURVE_HEIGHT": "curvature_height_mm",
    "CURVE_DIST_AD": "curvature_distance_mm",
    "CURVE_DIST_DC": "curvature_distance_from_apex_mm",
    "ESTRELA_RADIUS": "estrela_radius_mm",
    "NET_TURN": "net_turn_deg",
    "TOTAL_TURN": "total_turn_deg",
    "SMALLEST_RADIUS": "smallest_radius_mm",
}
# PS3.16, TID 310.
BOUNDS = {"371886008": "+", "371885007": "-"}
UNITS = {"mm": "mm", "deg": "deg", "px": "{pixels}"}


def expected(canal):
    """(method code) -> (value, reach below and above or None, unit)."""
    numbers = {}

    def put(code, key, value, low=None, high=None):
        if value is None:
            return
        unit = UNITS[key.rsplit("_", 1)[1]]
        if isinstance(value, dict):
            at = value["value"]
            low, high = value.get("low", low), value.get("high", high)
            reach = (value["u95"], value["u95"])
            if low is not None:
                reach = (max(at - low, 0.0), max(high - at, 0.0))
            numbers[code] = (at, reach, unit)
        else:
            numbers[code] = (value, None, unit)

    for code, key in LENGTHS.items():
        put(code, key, canal[key])
    curvature = canal["curvature"] or {"curves": []}
    for code, key in CURVATURE.items():
        put(code, key, curvature.get(key))
    for number, curve in enumerate(curvature["curves"], 1):
        put(f"BEND{number}_TURN", "turn_deg", curve["turn_deg"])
        put(f"BEND{number}_RADIUS", "radius_mm", curve["radius_mm"],
            curve["radius_low_mm"], curve["radius_high_mm"])
        put(f"BEND{number}_START", "start_mm", curve["start_from_apex_mm"])
        put(f"BEND{number}_END", "end_mm", curve["end_from_apex_mm"])
    return numbers


def concept(item):
    return item.ConceptNameCodeSequence[0].CodeValue


def numbers_of(group):
    """The same from the NUM items of one measurement group."""
    found = {}
    for item in group.ContentSequence:
        if item.ValueType != "NUM":
            continue
        measured = item.MeasuredValueSequence[0]
        unit = measured.MeasurementUnitsCodeSequence[0].CodeValue
        method, bounds = None, {}
        for child in item.ContentSequence:
            if child.ValueType == "CODE" and concept(child) == "370129005":
                method = child.ConceptCodeSequence[0]
                assert method.CodingSchemeDesignator == OWN
            if child.ValueType == "NUM":
                assert child.RelationshipType == "HAS PROPERTIES"
                bounds[BOUNDS[concept(child)]] = child.MeasuredValueSequence[0].FloatingPointValue
        assert abs(float(measured.NumericValue) - measured.FloatingPointValue) < 1e-6
        found[method.CodeValue] = (
            measured.FloatingPointValue,
            (bounds["-"], bounds["+"]) if bounds else None, unit)
    return found


def compare(name, wanted, found):
    assert wanted.keys() == found.keys(), (name, wanted.keys() ^ found.keys())
    for code, (value, reach, unit) in wanted.items():
        other, other_reach, other_unit = found[code]
        assert abs(value - other) < 1e-9, (name, code, value, other)
        assert unit == other_unit, (name, code, unit, other_unit)
        assert (reach is None) == (other_reach is None), (name, code)
        for mine, others in zip(reach or (), other_reach or ()):
            assert abs(mine - others) < 1e-6, (name, code, reach, other_reach)
    uneven = [code for code, (_, reach, _) in found.items()
              if reach and abs(reach[0] - reach[1]) > 1e-3]
    assert all("RADIUS" in code for code in uneven), (name, uneven)
    return len(uneven)


def walk(item):
    yield item
    for child in getattr(item, "ContentSequence", []):
        yield from walk(child)


def check_required(dataset, tables):
    """Every attribute of type 1 and 2 of each mandatory module is present,
    by highdicom's tables of PS3.3.

    SR Document Content is left out: the tables ask every content item for the
    attributes of every value type.
    """
    iod = tables.get_sop_class_iod_map()[dataset.SOPClassUID]
    modules = [module["key"] for module in tables.get_iod_module_map()[iod]
               if module["usage"] == "M" and module["key"] != "sr-document-content"]
    for module in modules:
        try:
            tables.check_required_attributes(dataset, module=module)
        except AttributeError as error:
            raise AssertionError(iod, module, str(error)) from error
    return f"{iod}, {len(modules)} modules"


def main(report_path, findings_path, film_path):
    report = pydicom.dcmread(report_path)
    film = pydicom.dcmread(film_path, stop_before_pixels=True)
    findings = json.load(open(findings_path, encoding="utf-8"))
    wanted = [expected(canal) for canal in findings["canals"]]

    assert report.SOPClassUID == "1.2.840.10008.5.1.4.1.1.88.33"
    assert report.ContentTemplateSequence[0].TemplateIdentifier == "1500"
    declared = {s.CodingSchemeDesignator for s in report.CodingSchemeIdentificationSequence}
    used = {s.CodingSchemeDesignator for item in walk(report)
            for key in ("ConceptNameCodeSequence", "ConceptCodeSequence")
            for s in getattr(item, key, [])}
    assert used <= declared, used - declared

    paths = [item for item in walk(report) if item.get("ValueType") == "SCOORD"]
    assert paths, "the traced path is there"
    for path in paths:
        reference = path.ContentSequence[0].ReferencedSOPSequence[0]
        assert reference.ReferencedSOPInstanceUID == film.SOPInstanceUID
        xs, ys = path.GraphicData[0::2], path.GraphicData[1::2]
        assert all(0 <= x <= film.Columns for x in xs)
        assert all(0 <= y <= film.Rows for y in ys)

    measurements = next(item for item in report.ContentSequence
                        if item.ValueType == "CONTAINER" and concept(item) == "126010")
    groups = [g for g in measurements.ContentSequence
              if g.ContentSequence[0].TextValue != "scale"]
    assert len(groups) == len(wanted)
    uneven = sum(compare(canal["name"], numbers, numbers_of(group))
                 for canal, numbers, group in zip(findings["canals"], wanted, groups))
    assert uneven > 0, "radii have intervals that are not even"
    print(f"{uneven} radii with intervals that are not even")
    print(f"pydicom {pydicom.__version__}: {len(groups)} groups, "
          f"{sum(map(len, wanted))} numbers agree")

    try:
        import highdicom
    except ImportError:
        print("highdicom is not installed: not asked")
        return
    from highdicom import _standard_utils as tables
    checked = [check_required(dataset, tables) for dataset in (report, film)]
    print(f"highdicom {highdicom.__version__}: nothing required is missing: "
          + "; ".join(checked))
    parsed = highdicom.sr.ComprehensiveSR.from_dataset(report)
    content = parsed.content
    groups = [g for g in content.get_image_measurement_groups()
              if g.tracking_identifier != "scale"]
    assert len(groups) == len(wanted)
    for canal, numbers, group in zip(findings["canals"], wanted, groups):
        assert group.tracking_identifier.endswith(canal["name"])
        found = {m.method.value: (m.value, m.unit.value) for m in group.get_measurements()}
        assert numbers.keys() == found.keys()
        for code, (value, _, unit) in numbers.items():
            assert abs(value - found[code][0]) < 1e-6 and unit == found[code][1]
        site = group.finding_sites
        assert site[0].value.scheme_designator == codes.SCT.Tooth.scheme_designator
    print(f"highdicom {highdicom.__version__}: {len(groups)} groups agree")


if __name__ == "__main__":
    try:
        main(*sys.argv[1:])
    except AssertionError as error:
        sys.exit(f"differs: {error.args}")
