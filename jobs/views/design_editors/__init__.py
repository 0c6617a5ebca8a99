"""The pages on which a draft design is changed, by the part each changes."""

from jobs.views.design_editors.basis import BasisEditor
from jobs.views.design_editors.circuits import CircuitsEditor
from jobs.views.design_editors.editor import Editor
from jobs.views.design_editors.panels import PanelsEditor
from jobs.views.design_editors.power import PowerEditor
from jobs.views.design_editors.strings import StringsEditor

EDITORS: dict[str, type[Editor]] = {
    one.slug: one for one in (PanelsEditor, StringsEditor, PowerEditor, CircuitsEditor, BasisEditor)
}
