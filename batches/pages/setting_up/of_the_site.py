"""The kinds of dated figures that every site has, in the order in which the page Site lists them."""

from __future__ import annotations

from batches.pages.setting_up import forms, tables
from batches.pages.setting_up.declared import DatedSetting, declare
from distillery.rules.models import CaskBand, LossCause, NameRequirement, ReportingDuty, ReviewThreshold, UsualFigure
from distillery.rules.site_facts import Interval, SiteDetails, Statement

declare(
    DatedSetting(
        "details",
        "Name and approval",
        "What pages and prints are headed with.",
        SiteDetails,
        tables.DetailsHistory,
        forms.DetailsForm,
    ),
    DatedSetting(
        "thresholds",
        "Review thresholds",
        "A review threshold says from which size on a difference is looked into; it is not an allowance.",
        ReviewThreshold,
        tables.ThresholdHistory,
        forms.ThresholdForm,
        states=Statement.What.FIGURES,
    ),
    DatedSetting(
        "bands",
        "Expected loss in cask",
        "What a cask is expected to lose in a year, least and most. That of a warehouse and kind goes before that of "
        "any.",
        CaskBand,
        tables.BandHistory,
        forms.BandForm,
    ),
    DatedSetting(
        "usual",
        "Usual figures",
        "What figures usually are until the site's own history says better.",
        UsualFigure,
        tables.UsualHistory,
        forms.UsualForm,
    ),
    DatedSetting(
        "causes",
        "Causes of loss",
        "What a loss may be put down to when an enquiry is answered.",
        LossCause,
        tables.CauseHistory,
        forms.CauseForm,
    ),
    DatedSetting(
        "names",
        "What names need",
        "What the law asks of a spirit that bears a name. The law and the officer decide.",
        NameRequirement,
        tables.NameHistory,
        forms.NameForm,
        states=Statement.What.MADE_AS_SCOTCH,
    ),
    DatedSetting(
        "reporting",
        "What has to be reported",
        "Of which operation, by whom and until when. The law and the officer decide.",
        ReportingDuty,
        tables.ReportingHistory,
        forms.ReportingForm,
    ),
    DatedSetting(
        "intervals",
        "How long things last",
        "From one certificate or calibration to the next, and how long records are kept.",
        Interval,
        tables.IntervalHistory,
        forms.IntervalForm,
        ways=(("What is due", "due"),),
    ),
)
