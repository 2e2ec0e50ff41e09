"""The one way anything of the plant is written: vessels and casks, instruments, recipes, and what is known of the
measuring."""

from distillery.plant.keeping.casks import CaskStands as CaskStands
from distillery.plant.keeping.casks import add_casks as add_casks
from distillery.plant.keeping.casks import note_cask as note_cask
from distillery.plant.keeping.casks import note_fill as note_fill
from distillery.plant.keeping.casks import note_standing as note_standing
from distillery.plant.keeping.fixed import add_table as add_table
from distillery.plant.keeping.fixed import add_vessel as add_vessel
from distillery.plant.keeping.measuring import Point as Point
from distillery.plant.keeping.measuring import Unkeepable as Unkeepable
from distillery.plant.keeping.measuring import add_calibration as add_calibration
from distillery.plant.keeping.measuring import add_certificate as add_certificate
from distillery.plant.keeping.measuring import add_instrument as add_instrument
from distillery.plant.keeping.measuring import add_obscuration as add_obscuration
from distillery.plant.keeping.measuring import take_into_use as take_into_use
from distillery.plant.keeping.places import add_keyholder as add_keyholder
from distillery.plant.keeping.places import add_rows as add_rows
from distillery.plant.keeping.recipes import add_recipe_version as add_recipe_version
from distillery.plant.keeping.recipes import add_recipes as add_recipes
from distillery.plant.keeping.tables import add_instruments as add_instruments
from distillery.plant.keeping.vessels import add_still as add_still
from distillery.plant.keeping.vessels import add_tables as add_tables
from distillery.plant.keeping.vessels import add_vessels as add_vessels
from distillery.plant.keeping.vessels import keep_for as keep_for
