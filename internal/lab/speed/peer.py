#!/usr/bin/env python3
"""The same job as `tracemap convert`, in simple form, with general libraries.

    peer.py DAY.nmea READINGS.csv CLOCK_OFFSET_S OUT

A yardstick for speed, not for maps: one receiver, clean logs, the clock's offset
given (not searched), straight pieces only, no locks, no clock error, no report. What
can be done by whole arrays is: checksums, the smoother, the placing of readings.
"""
import csv
import datetime
import json
import os
import sys

import numpy as np
import scipy.linalg
import shapely.geometry
import shapely.ops

DEGREE = 111319.49  # m, of longitude on the equator
QUICK, ACCEL = 0.008, 0.3  # m, m^2/s^3: of the smoother
PIN, SHARED, SLOW = 0.05, 0.04, 0.015  # m, one sigma each: of the width


def sentences(path):
    """Bodies of the sentences with a right checksum, by type."""
    raw = np.fromfile(path, np.uint8)
    begin = np.flatnonzero(raw == ord("$"))
    star = np.flatnonzero(raw == ord("*"))
    star = star[star < len(raw) - 2]
    at = np.searchsorted(star, begin)
    begin, at = begin[at < len(star)], at[at < len(star)]
    end = star[at]
    whole = np.append(begin[1:] > end[:-1], True)
    begin, end = begin[whole], end[whole]
    edges = np.stack([begin + 1, end], 1).ravel()
    sums = np.bitwise_xor.reduceat(raw, edges)[::2]
    digit = np.zeros(256, np.uint8)
    for i, c in enumerate(b"0123456789ABCDEF"):
        digit[c] = i
    told = digit[raw[end + 1]] * 16 + digit[raw[end + 2]]
    right = sums == told
    begin, end = begin[right], end[right]
    kind = raw[begin + 3].astype(np.uint32) << 16 | raw[begin + 4].astype(np.uint32) << 8 | raw[begin + 5]
    text = raw.tobytes()
    out = {}
    for name in (b"GGA", b"RMC", b"GST"):
        of = kind == int.from_bytes(name, "big")
        out[name] = [text[a:b].split(b",") for a, b in zip(begin[of] + 7, end[of])]
    return out, len(begin)


def floats(rows, field):
    return np.array([r[field] if len(r) > field and r[field] else b"nan" for r in rows]).astype(np.float64)


def seconds(rows):
    t = floats(rows, 0)
    return np.floor(t / 1e4) * 3600 + np.floor(t / 100 % 100) * 60 + t % 100


def angle(rows, field, negative):
    v = floats(rows, field)
    d = np.floor(v / 100)
    s = np.where(np.array([r[field + 1] for r in rows]) == negative, -1.0, 1.0)
    return s * (d + (v - 100 * d) / 60)


def epochs(found):
    gga = [r for r in found[b"GGA"] if len(r) >= 12 and r[5] not in (b"", b"0")]
    t, first = np.unique(seconds(gga), return_index=True)
    gga = [gga[i] for i in first]
    date = next(r[8] for r in found[b"RMC"] if len(r) > 8 and r[8]).decode()
    midnight = datetime.datetime.strptime(date, "%d%m%y").replace(tzinfo=datetime.timezone.utc).timestamp()
    sigma = np.full(len(t), np.nan)
    gst = [r for r in found[b"GST"] if len(r) >= 8]
    at = np.searchsorted(t, seconds(gst))
    ok = at < len(t)
    sigma[at[ok]] = np.hypot(floats(gst, 5), floats(gst, 6))[ok] / np.sqrt(2)
    return (midnight + t, angle(gga, 1, b"S"), angle(gga, 3, b"W"), floats(gga, 8) + floats(gga, 10),
            floats(gga, 5).astype(int), sigma)


def smooth(t, z):
    """The integrated Wiener process's smoother, as one banded solution a chain."""
    out = np.empty_like(z)
    cuts = np.flatnonzero(np.diff(t) > 3) + 1
    for a, b in zip(np.append(0, cuts), np.append(cuts, len(t))):
        if b - a < 3:
            out[a:b] = z[a:b]
            continue
        h = np.diff(t[a:b])
        c0, c2 = 1 / h[:-1], 1 / h[1:]
        c1 = -(c0 + c2)
        w = QUICK**2 / (ACCEL * (h[:-1] + h[1:]) / 2)
        band = np.zeros((3, b - a))
        band[2] = 1
        band[2, :-2] += w * c0 * c0
        band[2, 1:-1] += w * c1 * c1
        band[2, 2:] += w * c2 * c2
        band[1, 1:-1] += w * c0 * c1
        band[1, 2:] += w * c1 * c2
        band[0, 2:] += w * c0 * c2
        out[a:b] = scipy.linalg.solveh_banded(band, z[a:b])
    return out


def ordered(p):
    """Along the line: from an end, always to the nearest that is left."""
    far = np.argmax(((p - p.mean(0)) ** 2).sum(1))
    left = np.ones(len(p), bool)
    order = [far]
    left[far] = False
    while left.any():
        d = ((p - p[order[-1]]) ** 2).sum(1)
        d[~left] = np.inf
        order.append(int(np.argmin(d)))
        left[order[-1]] = False
    return np.array(order)


def pieces(p, limit):
    """Straight pieces, halved where a point is furthest off (Ramer's way)."""
    todo, out = [(0, len(p) - 1)], []
    while todo:
        a, b = todo.pop()
        d = p[b] - p[a]
        l = np.hypot(*d) or 1e-9
        off = np.abs((p[a:b + 1, 0] - p[a, 0]) * d[1] - (p[a:b + 1, 1] - p[a, 1]) * d[0]) / l
        k = a + int(np.argmax(off))
        if b - a > 3 and off.max() > limit and a < k < b:
            todo += [(k, b), (a, k)]
        else:
            out.append((a, b))
    return out


def fit(p, s):
    """Each piece by generalised least squares; its ends with their sigma across."""
    ends = []
    for a, b in pieces(p, 0.25):
        q, station = p[a:b + 1], s[a:b + 1] - s[a]
        mid = q.mean(0)
        _, _, v = np.linalg.svd(q - mid)
        x = (q - mid) @ v[0]
        y = (q - mid) @ np.array([-v[0][1], v[0][0]])
        lag = np.abs(station[:, None] - station[None, :])
        cov = SHARED**2 * np.exp(-lag / 15) + SLOW**2 + PIN**2 * np.eye(len(q))
        chol = scipy.linalg.cho_factor(cov, lower=True)
        design = np.stack([np.ones_like(x), x], 1)
        inverse = np.linalg.inv(design.T @ scipy.linalg.cho_solve(chol, design) + 1e-8 * np.eye(2))
        beta = inverse @ design.T @ scipy.linalg.cho_solve(chol, y)
        for e in (x[0], x[-1]):
            at = mid + e * v[0] + (beta[0] + beta[1] * e) * np.array([-v[0][1], v[0][0]])
            row = np.array([1, e])
            ends.append((at, float(np.sqrt(row @ inverse @ row))))
    return ends


def corridor(ends):
    parts = []
    for (a, sa), (b, sb) in zip(ends[:-1], ends[1:]):
        parts.append(shapely.geometry.MultiPoint([a, b]).convex_hull.buffer(1.96 * max(sa, sb)))
    return shapely.ops.unary_union(parts)


def main():
    log, rows, offset, out = sys.argv[1], sys.argv[2], float(sys.argv[3]), sys.argv[4]
    found, count = sentences(log)
    t, lat, lon, height, quality, _ = epochs(found)
    lat0, lon0 = np.median(lat), np.median(lon)
    scale = np.array([DEGREE * np.cos(np.radians(lat0)), DEGREE])
    z = np.stack([lon - lon0, lat - lat0], 1) * scale
    track = np.stack([smooth(t, z[:, 0]), smooth(t, z[:, 1])], 1)
    with open(rows, newline="") as f:
        readings = list(csv.DictReader(f))
    when = np.array([datetime.datetime.fromisoformat(r["time"].replace("Z", "+00:00")).timestamp() for r in readings]) - offset
    place = np.stack([np.interp(when, t, track[:, 0]), np.interp(when, t, track[:, 1])], 1)
    ground = np.interp(when, t, height) - 2.0
    near = np.clip(np.searchsorted(t, when), 1, len(t) - 1)
    placed = (t[near] - t[near - 1] < 5) & (when > t[0]) & (when < t[-1])

    lines = {}
    for i, r in enumerate(readings):
        if placed[i] and not r.get("feature"):
            lines.setdefault(r["line"], []).append(i)
    features, corridors, table, marks = [], [], [], []
    back = lambda p: [round(lon0 + p[0] / scale[0], 9), round(lat0 + p[1] / scale[1], 9)]
    for name, members in lines.items():
        p = place[members]
        order = ordered(p)
        p, members = p[order], np.array(members)[order]
        s = np.append(0, np.cumsum(np.hypot(*np.diff(p, axis=0).T)))
        depth = np.array([float(readings[i].get("depth_m") or "nan") for i in members])
        known = ~np.isnan(depth)
        ends = fit(p, s) if len(p) > 2 else [(q, PIN) for q in p]
        stations = np.append(0, np.cumsum([np.hypot(*(b[0] - a[0])) for a, b in zip(ends[:-1], ends[1:])]))
        deep = np.interp(stations, s[known], depth[known]) if known.any() else np.full(len(ends), np.nan)
        h = np.interp(stations, s, ground[members])
        coordinates = [back(at) + [round(float(g - d), 3)] for (at, _), g, d in zip(ends, h, deep)]
        properties = {"line_id": name, "utility": readings[members[0]]["utility"], "readings": len(members),
                      "length_m": round(float(stations[-1]), 3), "half_width_max_m": round(1.96 * max(e[1] for e in ends), 3)}
        features.append({"type": "Feature", "properties": properties, "geometry": {"type": "LineString", "coordinates": coordinates}})
        if len(ends) > 1:
            polygon = shapely.ops.transform(lambda x, y: (x / scale[0] + lon0, y / scale[1] + lat0), corridor(ends))
            corridors.append({"type": "Feature", "properties": properties, "geometry": shapely.geometry.mapping(polygon)})
        table.append(list(properties.values()))
        text = " ".join(",".join(map(str, c)) for c in coordinates)
        marks.append(f"<Placemark><name>{name}</name><LineString><coordinates>{text}</coordinates></LineString></Placemark>")

    os.makedirs(out, exist_ok=True)
    for file, list_ in (("lines.geojson", features), ("corridors.geojson", corridors)):
        with open(os.path.join(out, file), "w") as f:
            json.dump({"type": "FeatureCollection", "features": list_}, f)
    with open(os.path.join(out, "readings.geojson"), "w") as f:
        json.dump({"type": "FeatureCollection", "features": [
            {"type": "Feature", "properties": r, "geometry": {"type": "Point", "coordinates": back(place[i])} if placed[i] else None}
            for i, r in enumerate(readings)]}, f)
    with open(os.path.join(out, "lines.csv"), "w", newline="") as f:
        csv.writer(f).writerows([["line_id", "utility", "readings", "length_m", "half_width_max_m"]] + table)
    with open(os.path.join(out, "readings.csv"), "w", newline="") as f:
        w = csv.writer(f)
        w.writerow(list(readings[0]) + ["lon", "lat", "placed"])
        for i, r in enumerate(readings):
            w.writerow(list(r.values()) + back(place[i]) + [bool(placed[i])])
    with open(os.path.join(out, "map.kml"), "w") as f:
        f.write('<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>' + "".join(marks) + "</Document></kml>")
    print(f"{count} sentences, {len(t)} epochs, {int(placed.sum())} of {len(readings)} readings placed, {len(features)} lines")


main()
