"""The boxes in which a site enters its instruments, their certificates, how sure its tables are, and obscurations.

A form gathers what was typed; what cannot be is refused by `distillery.plant.keeping`, and the sentence stands beside
the box that holds the slip. Figures are read as on the sheets (`distillery.typed.meaning`).
"""

from distillery.plant.forms.boxes import PlantForm as PlantForm
from distillery.plant.forms.fixed import TableForm as TableForm
from distillery.plant.forms.fixed import VesselForm as VesselForm
from distillery.plant.forms.measuring import CertificateForm as CertificateForm
from distillery.plant.forms.measuring import InstrumentForm as InstrumentForm
from distillery.plant.forms.measuring import UseForm as UseForm
from distillery.plant.forms.places import CaskForm as CaskForm
from distillery.plant.forms.places import KeyholderForm as KeyholderForm
from distillery.plant.forms.places import RowsForm as RowsForm
from distillery.plant.forms.recipes import RecipeForm as RecipeForm
from distillery.plant.forms.vessels import CalibrationForm as CalibrationForm
from distillery.plant.forms.vessels import ObscurationForm as ObscurationForm
