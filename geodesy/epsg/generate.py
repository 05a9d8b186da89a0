#!/usr/bin/python3
"""Makes the tables of coordinate systems from PROJ's copy of the EPSG dataset.

    python3 generate.py /usr/share/proj/proj.db

writes, next to itself:
  crs.csv      the projected systems that can be computed to the millimetre,
               on a frame whose transformation is known to centimetres
  bases.csv    the geographic systems they rest on
  gridcrs.csv, gridbases.csv  the same for datums that a correction grid leads to
  refused.csv  every other EPSG code, by the reason why not

Only development needs it: the tables are embedded in the program. It wants
nothing but Python's own library. The EPSG dataset is the work of the IOGP
Geomatics Committee; its terms of use allow this with a notice, which is in the
head of each table.
"""

import csv
import os
import sqlite3
import sys
from fractions import Fraction

HERE = os.path.dirname(os.path.abspath(__file__))

# Geographic 2D system: (frame in geodesy/frame.go, accuracy in metres of taking
# it for that frame). National realizations of ETRS89 differ from ETRF2000 by
# what the land has moved within Europe since their epoch.
BASES = {
    "4326": ("WGS84", 0), "9990": ("ITRF2020", 0), "9000": ("ITRF2014", 0), "8999": ("ITRF2008", 0),
    "6318": ("NAD83(2011)", 0), "6322": ("NAD83(PA11)", 0), "6325": ("NAD83(MA11)", 0),
    "8255": ("NAD83(CSRS)", 0), "4617": ("NAD83(CSRS)", 0.1),
    "7844": ("GDA2020", 0), "4283": ("GDA94", 0),
    "4258": ("ETRS89", 0.05), "9067": ("ETRS89", 0), "9069": ("ETRF2014", 0), "4619": ("ETRS89", 0.1), "4171": ("ETRS89", 0.05),
    "9777": ("ETRS89", 0.05), "9782": ("ETRS89", 0.05), "6706": ("ETRS89", 0.05), "9702": ("ETRS89", 0),
    "4173": ("ETRS89", 0.05), "4661": ("ETRS89", 0.1), "4669": ("ETRS89", 0.1), "4180": ("ETRS89", 0.1),
    "4761": ("ETRS89", 0.1), "4765": ("ETRS89", 0.1), "7798": ("ETRS89", 0.1), "8685": ("ETRS89", 0.1),
    "4150": ("ETRS89", 0.1),  # CH1903+: by a fixed translation from CHTRS95, see geodesy/crs.go
    # Frames frozen at an epoch in land that has moved since: nothing leads from or to
    # another frame, so these serve corrections that are in them already.
    "4167": ("NZGD2000", 0), "6668": ("JGD2011", 0), "4612": ("JGD2000", 0), "4674": ("SIRGAS 2000", 0), "4686": ("MAGNA-SIRGAS", 0),
    "5340": ("POSGAR 2007", 0), "6365": ("Mexico ITRF2008", 0), "4490": ("CGCS2000", 0), "4148": ("Hartebeesthoek94", 0),
    "4737": ("Korea 2000", 0), "5252": ("TUREF", 0), "4659": ("ISN93", 0), "5324": ("ISN2004", 0), "8086": ("ISN2016", 0),
    "4742": ("GDM2000", 0), "4755": ("DGN95", 0),
}

# Geographic systems that a correction grid, a file of the user's, leads to: the
# frame that the usual grid starts from, and the accuracy of taking it for that.
GRIDDED = {
    "4277": ("ETRS89", 0.1), "4289": ("ETRS89", 0.1), "4314": ("ETRS89", 0.1), "4313": ("ETRS89", 0.1), "4230": ("ETRS89", 0.1),
    "4312": ("ETRS89", 0.1), "4149": ("ETRS89", 0.1), "4299": ("ETRS89", 0.1), "4300": ("ETRS89", 0.1), "4207": ("ETRS89", 0.1),
    "4274": ("ETRS89", 0.1), "4188": ("ETRS89", 0.1), "4202": ("GDA94", 0), "4203": ("GDA94", 0),
}

# EPSG method: our name, and its parameters in the order of the table.
METHODS = {
    "9807": ("tm", ("8801", "8802", "8805", "8806", "8807")),
    "9801": ("lcc1", ("8801", "8802", "8805", "8806", "8807")),
    "9802": ("lcc2", ("8821", "8822", "8823", "8824", "8826", "8827")),
    "9812": ("homA", ("8811", "8812", "8813", "8814", "8815", "8806", "8807")),
    "9815": ("homB", ("8811", "8812", "8813", "8814", "8815", "8816", "8817")),
    "9809": ("sterea", ("8801", "8802", "8805", "8806", "8807")),
}
UNITS = {"9001": "m", "9002": "ft", "9003": "ftUS"}

NAD83 = "has realizations up to a metre apart, and which one a map is on its code does not tell"
GRID = "needs a correction grid, which is not built in"
# Why a geographic system is not among the bases; with none here, because no
# transformation that holds to centimetres is built in.
REASONS = {
    "4269": NAD83, "4152": NAD83, "4759": NAD83, "6783": NAD83,
    "4267": GRID + " (NADCON or NTv2)", "4277": GRID + " (OSTN15)", "4230": GRID, "4314": GRID + " (BeTA2007)",
    "4289": GRID + " (RDTRANS)", "4313": GRID, "4275": GRID, "4807": GRID, "4265": GRID, "4806": GRID, "4312": GRID, "4805": GRID,
    "4156": GRID, "4818": GRID, "5228": GRID, "5229": GRID, "4237": GRID, "4299": GRID, "4300": GRID, "4188": GRID, "4149": GRID,
    "4124": GRID, "4123": GRID, "4273": GRID, "4817": GRID, "4274": GRID, "4207": GRID, "4121": GRID, "4202": GRID, "4203": GRID,
    "4272": GRID, "4301": GRID, "4284": GRID, "4179": GRID, "4178": GRID, "4181": GRID,
    "8237": "is an early version of NAD83(CSRS); take the code on version 7", "8240": "is an early version of NAD83(CSRS); take the code on version 7",
    "8246": "is an early version of NAD83(CSRS); take the code on version 7", "8252": "is an early version of NAD83(CSRS); take the code on version 7",
    "8232": "is an early version of NAD83(CSRS); take the code on version 7",
}


def angle(value, uom):
    """Degrees, exactly rounded, of a value in an EPSG unit."""
    v = Fraction(repr(value))
    if uom == "9102":
        return float(v)
    if uom == "9110":  # DDD.MMSSsss
        sign, text = (-1, repr(value)[1:]) if value < 0 else (1, repr(value))
        whole, _, frac = text.partition(".")
        frac = (frac + "0000")
        sec = Fraction(int(frac[2:]), 10 ** (len(frac) - 4))
        return float(sign * (int(whole) + Fraction(int(frac[:2]), 60) + sec / 3600))
    if uom == "9104":
        return float(v / 3600)
    raise ValueError("angle unit " + uom)


def number(v):
    text = repr(float(v))
    return text[:-2] if text.endswith(".0") else text


def parameters(row, unit):
    """The parameters of a conversion by EPSG code; lengths in the map's unit."""
    got = {}
    for i in range(1, 8):
        code, value, uom = (row["param%d_%s" % (i, k)] for k in ("code", "value", "uom_code"))
        if code is None:
            continue
        code, uom = str(code), str(uom)
        if uom in UNITS:
            if uom != unit:
                raise ValueError("length in another unit")
            got[code] = float(value)
        elif uom == "9201":
            got[code] = float(value)
        else:
            got[code] = angle(value, uom)
    return got


def axes(db, cs):
    rows = db.execute("SELECT orientation, uom_code FROM axis WHERE coordinate_system_auth_name='EPSG' AND "
                      "coordinate_system_code=? ORDER BY coordinate_system_order", (cs,)).fetchall()
    return "/".join(r["orientation"] for r in rows), str(rows[0]["uom_code"])


def extent(db, table, code):
    r = db.execute("SELECT e.* FROM usage u JOIN extent e ON e.auth_name=u.extent_auth_name AND e.code=u.extent_code "
                   "WHERE u.object_table_name=? AND u.object_auth_name='EPSG' AND u.object_code=? ORDER BY u.code", (table, code)).fetchone()
    return [number(r[k]) for k in ("west_lon", "south_lat", "east_lon", "north_lat")] + [r["name"]]


def esri(db, table, code):
    r = db.execute("SELECT alt_name FROM alias_name WHERE table_name=? AND auth_name='EPSG' AND code=? AND source='ESRI'", (table, code)).fetchone()
    return r["alt_name"] if r else ""


def ranges(codes):
    """Ascending codes as 1-3 5 7-9."""
    out, codes = [], sorted(set(codes))
    for c in codes:
        if out and c == out[-1][1] + 1:
            out[-1][1] = c
        else:
            out.append([c, c])
    return " ".join("%d" % a if a == b else "%d-%d" % (a, b) for a, b in out)


def write(name, notice, head, rows):
    with open(os.path.join(HERE, name), "w", newline="") as f:
        f.write("# %s. Made by generate.py; do not edit.\n" % notice)
        w = csv.writer(f, lineterminator="\n")
        w.writerow(head)
        w.writerows(rows)


def main():
    db = sqlite3.connect(sys.argv[1])
    db.row_factory = sqlite3.Row
    version = db.execute("SELECT value FROM metadata WHERE key='EPSG.VERSION'").fetchone()[0]
    notice = "EPSG Geodetic Parameter Dataset %s, (c) IOGP Geomatics Committee, as kept in PROJ" % version

    crs, gridded, refused, named = [], [], {}, {}

    def refuse(reason, code, datum=""):
        refused.setdefault((datum, reason), []).append(code)

    for p in db.execute("SELECT p.*, g.name AS base_name FROM projected_crs p JOIN geodetic_crs g ON g.auth_name=p.geodetic_crs_auth_name "
                        "AND g.code=p.geodetic_crs_code WHERE p.auth_name='EPSG' ORDER BY CAST(p.code AS INTEGER)").fetchall():
        code = int(p["code"])
        if p["deprecated"]:
            refuse("is withdrawn by EPSG", code)
            continue
        base = str(p["geodetic_crs_code"])
        if code == 3857:
            refuse("is Web Mercator, made for pictures: it stretches lengths by 1/cos(latitude), 1.6 times at 51 degrees; "
                   "take the UTM or national zone", code)
            continue
        if base not in BASES:
            refuse(REASONS.get(base, "") + (": name its file with --grid" if base in GRIDDED else ""), code, p["base_name"])
        if base not in BASES and base not in GRIDDED:
            continue
        if base in GRIDDED:
            refuse_ = lambda *_: None  # it is among the refused for want of a grid
        else:
            refuse_ = refuse
        row = db.execute("SELECT * FROM conversion WHERE auth_name='EPSG' AND code=?", (p["conversion_code"],)).fetchone()
        order, unit = axes(db, p["coordinate_system_code"])
        place = extent(db, "projected_crs", p["code"])
        if str(row["method_code"]) not in METHODS:
            refuse_("is made by a projection that is not built in (%s)" % row["method_name"], code)
            continue
        if unit not in UNITS or order not in ("east/north", "north/east"):
            refuse_("has axes that are not built in (%s)" % order, code)
            continue
        if float(place[3]) < -60:
            refuse_("is a map sheet of Antarctica", code)
            continue
        method, want = METHODS[str(row["method_code"])]
        try:
            got = parameters(row, unit)
        except ValueError as e:
            refuse_("is defined in mixed units (%s)" % e, code)
            continue
        if code in (2056, 21781):
            method = "swiss"
        values = [number(got[c]) for c in want] + [""] * (7 - len(want))
        (gridded if base in GRIDDED else crs).append([code, p["name"], base, row["name"], method, UNITS[unit], order] + values + place + [esri(db, "projected_crs", p["code"])])
        named[(base, p["conversion_code"], unit)] = code

    # The same zone on NAD83(2011) for the older realizations.
    successors = []
    for p in db.execute("SELECT code, geodetic_crs_code, conversion_code, coordinate_system_code FROM projected_crs WHERE auth_name='EPSG' AND deprecated=0 "
                        "AND geodetic_crs_code IN ('4269','4152','4759','6783') ORDER BY CAST(code AS INTEGER)").fetchall():
        new = named.get(("6318", p["conversion_code"], axes(db, p["coordinate_system_code"])[1]))
        if new:
            successors.append("%s=%d" % (p["code"], new))

    bases, gridbases = [], []
    for code, (frame, accuracy) in (BASES | GRIDDED).items():
        g = db.execute("SELECT g.*, d.name AS datum, e.name AS ellipsoid, e.semi_major_axis AS a, e.inv_flattening AS rf, e.code AS ecode FROM geodetic_crs g "
                       "JOIN geodetic_datum d ON d.auth_name=g.datum_auth_name AND d.code=g.datum_code "
                       "JOIN ellipsoid e ON e.auth_name=d.ellipsoid_auth_name AND e.code=d.ellipsoid_code "
                       "WHERE g.auth_name='EPSG' AND g.code=?", (code,)).fetchone()
        ensemble = db.execute("SELECT ensemble_accuracy FROM geodetic_datum WHERE auth_name='EPSG' AND code=?", (g["datum_code"],)).fetchone()[0]
        epoch = db.execute("SELECT frame_reference_epoch FROM geodetic_datum WHERE auth_name='EPSG' AND code=?", (g["datum_code"],)).fetchone()[0]
        three = db.execute("SELECT code FROM geodetic_crs WHERE auth_name='EPSG' AND datum_code=? AND type='geographic 3D' AND deprecated=0", (g["datum_code"],)).fetchone()
        (gridbases if code in GRIDDED else bases).append([code, three[0] if three else "", g["name"], frame, number(accuracy), g["datum_code"], g["datum"],
                      "" if ensemble is None else number(ensemble), "" if epoch is None else number(epoch), g["ecode"], g["ellipsoid"], number(g["a"]), number(g["rf"])]
                     + extent(db, "geodetic_crs", code)
                     + [esri(db, "geodetic_crs", code), esri(db, "geodetic_datum", g["datum_code"])])
    have = {int(b[0]) for b in bases} | {int(b[1]) for b in bases if b[1]}
    for g in db.execute("SELECT code, name, type, deprecated FROM geodetic_crs WHERE auth_name='EPSG' ORDER BY CAST(code AS INTEGER)").fetchall():
        code = int(g["code"])
        if code in have:
            continue
        if g["deprecated"]:
            refuse("is withdrawn by EPSG", code)
        elif g["type"] == "geocentric":
            refuse("is geocentric (X, Y, Z): not for maps", code)
        else:
            refuse(REASONS.get(str(g["code"]), ""), code, g["name"])
    for table, what in (("vertical_crs", "is a system of heights alone"), ("compound_crs", "is a compound of a map grid and heights above sea level: name the map grid alone")):
        for r in db.execute("SELECT code FROM %s WHERE auth_name='EPSG'" % table).fetchall():
            refuse(what, int(r["code"]))

    head = "code name base conversion method unit axes p1 p2 p3 p4 p5 p6 p7 west south east north area esri".split()
    write("crs.csv", notice, head, crs)
    write("gridcrs.csv", notice, head, gridded)
    head = "code code3d name frame accuracy datum_code datum ensemble epoch ellipsoid_code ellipsoid a rf west south east north area esri esri_datum".split()
    write("bases.csv", notice, head, bases)
    write("gridbases.csv", notice, head, gridbases)
    # A row a datum or other reason. The last one gives the same zone on
    # NAD83(2011) for codes on older realizations.
    write("refused.csv", notice, ["datum", "reason", "codes"],
          [[d, r, ranges(c)] for (d, r), c in sorted(refused.items())] + [["", "successors", " ".join(successors)]])
    print(len(crs), "projected,", len(bases), "geographic,", sum(map(len, refused.values())), "refused")


main()
