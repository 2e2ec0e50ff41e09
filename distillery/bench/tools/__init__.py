"""The sums of the bench, each by its name in an address."""

from __future__ import annotations

from distillery.bench.boxes import BenchForm
from distillery.bench.tools.adding import AddingForm
from distillery.bench.tools.blending import BlendForm
from distillery.bench.tools.botanicals import BotanicalsForm
from distillery.bench.tools.casks_and_bottles.ageing import YearsForm
from distillery.bench.tools.casks_and_bottles.bottling import FillsForm, LineLossForm
from distillery.bench.tools.casks_and_bottles.cask import CaskForm
from distillery.bench.tools.casks_and_bottles.duty import DutyForm
from distillery.bench.tools.conversions import ConversionForm
from distillery.bench.tools.density import DensityForm
from distillery.bench.tools.distilling import ChargeForm, PeriodYieldForm, SteadyForm
from distillery.bench.tools.fermenting import CarbonDioxideForm, WashbacksForm, YeastRateForm
from distillery.bench.tools.gauging import GaugeForm
from distillery.bench.tools.mashing import StrikeForm
from distillery.bench.tools.reading import ReadingForm
from distillery.bench.tools.reduction import ReductionForm
from distillery.bench.tools.silo import SiloForm
from distillery.bench.tools.wash import WashForm

TOOLS: dict[str, type[BenchForm]] = {
    "gauge": GaugeForm,
    "reading": ReadingForm,
    "density": DensityForm,
    "reduce": ReductionForm,
    "blend": BlendForm,
    "add": AddingForm,
    "cask": CaskForm,
    "wash": WashForm,
    "silo": SiloForm,
    "strike": StrikeForm,
    "yeast": YeastRateForm,
    "carbon-dioxide": CarbonDioxideForm,
    "washbacks": WashbacksForm,
    "charge": ChargeForm,
    "steady": SteadyForm,
    "yield": PeriodYieldForm,
    "botanicals": BotanicalsForm,
    "years": YearsForm,
    "bottles": FillsForm,
    "line-loss": LineLossForm,
    "duty": DutyForm,
    "convert": ConversionForm,
}
