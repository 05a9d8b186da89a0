"""Opens a map in QGIS as a person would, tells what QGIS made of its styles, and
draws it.

    open_in_qgis.py map.gpkg|map.kml picture.png [width height [xmin ymin xmax ymax]]

Nothing is styled here: layers of a GeoPackage take the default style that QGIS
finds in it, those of a KML the symbols that GDAL reads from it. What QGIS holds of
each layer goes to standard output as JSON.
"""

import json
import os
import sys

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("LIBKML_RESOLVE_STYLE", "YES")  # symbols of shared styles too

from osgeo import ogr
from qgis.core import (
    QgsApplication,
    QgsCoordinateReferenceSystem,
    QgsExpressionContext,
    QgsExpressionContextUtils,
    QgsMapRendererSequentialJob,
    QgsMapSettings,
    QgsRectangle,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QSize
from qgis.PyQt.QtGui import QColor

# From the lowest to the highest.
ORDER = ["corridors", "lines", "doubtful", "vertices", "readings"]


def stroke(layer):
    """What is drawn by one layer of a symbol."""
    out = {"class": layer.layerType(), "colour": layer.color().name(), "opacity": layer.color().alpha()}
    if layer.layerType() == "SimpleLine":
        out["width"] = layer.width()
        out["dash"] = list(layer.customDashVector()) if layer.useCustomDashPattern() else []
    return out


def told(layer):
    """What QGIS holds of a layer with categories."""
    renderer, out = layer.renderer(), {
        "crs": layer.crs().authid(),
        "features": layer.featureCount(),
        "renderer": layer.renderer().type(),
        "farthest": layer.minimumScale() if layer.hasScaleBasedVisibility() else 0,
        "abstract": layer.metadata().abstract(),
        "categories": {},
        "labels": layer.labelsEnabled(),
    }
    if renderer.type() == "categorizedSymbol":
        out["attribute"] = renderer.classAttribute()
        for c in renderer.categories():
            strokes = [stroke(s) for s in c.symbol().symbolLayers()]
            out["categories"][str(c.value() or "")] = {"label": c.label(), "strokes": strokes}
    if layer.labelsEnabled():
        settings = layer.labeling().settings()
        out["label"] = settings.fieldName
        letters = settings.format()  # kept: what it gives lives no longer than it
        out["halo"] = letters.buffer().enabled()
        out["points"] = letters.size()
    return out


def opened(file):
    """The file's layers, from the lowest to the highest, each with its name."""
    source = ogr.Open(file)
    names = [source.GetLayer(i).GetName() for i in range(source.GetLayerCount())]
    if file.endswith(".gpkg"):
        names = [n for n in ORDER if n in names]
    else:  # bands below lines below points
        names.sort(key=lambda n: [n.startswith(k) for k in ("Readings", "Doubt", "Lines", "Corr")])
    layers = []
    for name in names:
        layer = QgsVectorLayer(f"{file}|layername={name}", name, "ogr")
        if not layer.isValid():
            sys.exit(f"QGIS cannot open the layer {name}")
        layers.append(layer)
    return [(n, l) for n, l in zip(names, layers) if l.featureCount() > 0 and l.isSpatial()] or sys.exit("nothing to draw")


def draw(layers, picture, width, height, box):
    settings = QgsMapSettings()
    settings.setLayers([l for _, l in reversed(layers)])
    crs = layers[0][1].crs()
    settings.setDestinationCrs(crs if not crs.isGeographic() else QgsCoordinateReferenceSystem("EPSG:3857"))
    settings.setBackgroundColor(QColor("white"))
    settings.setOutputSize(QSize(width, height))
    settings.setOutputDpi(110)
    if box is None:
        box = QgsRectangle()
        for _, l in layers:
            box.combineExtentWith(settings.layerExtentToOutputExtent(l, l.extent()))
        box.scale(1.06)
    settings.setExtent(box)
    context = QgsExpressionContext()
    context.appendScope(QgsExpressionContextUtils.globalScope())
    context.appendScope(QgsExpressionContextUtils.mapSettingsScope(settings))
    settings.setExpressionContext(context)
    job = QgsMapRendererSequentialJob(settings)
    job.start()
    job.waitForFinished()
    if job.errors() or not job.renderedImage().save(picture):
        sys.exit("cannot draw: " + "; ".join(e.message for e in job.errors()))
    return settings.scale()


def main(file, picture, width=1100, height=800, *box):
    app = QgsApplication([], False)
    app.initQgis()
    layers = opened(file)
    box = QgsRectangle(*map(float, box)) if box else None
    scale = draw(layers, picture, int(width), int(height), box)
    json.dump({"scale": scale, "layers": {n: told(l) for n, l in layers}}, sys.stdout, indent=1)
    sys.stdout.flush()
    os._exit(0)  # QGIS's own way out crashes now and then when nothing is shown


main(*sys.argv[1:])
