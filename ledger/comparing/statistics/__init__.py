"""Balance statistics: which reading is wrong, and whether anything is really missing.

Two published methods meet here. Nuclear material accountancy looks at a sequence of balances,
each with its measurement error, and asks for loss. Data reconciliation of process plants looks at
a network of balances and asks which instrument is wrong or where it leaks. A distillery gauges its
vessels before and after every operation, so both questions have answers in the same numbers.
The books are never adjusted to the reconciled figures: this package only points at faults.

Symbols, as used in every module (litres of pure alcohol, LPA, unless a row says otherwise):

r        one residual a row, in time order, each about zero if every reading is right and nothing
         unusual was lost. An operation's row counts what is missing as positive; a continuity row
         (opening gauge less last closing gauge of the same vessel) counts what was found as positive.
f        the column of one fault: how much each row moves for one unit of that fault. A closing dip
         read short makes its operation lose and the next gauge find, with the same sign in r; a true
         loss moves one row only. That difference is all the evidence there is.
V        covariance of r when nothing is wrong: what the readings' own uncertainties, the spread of
         the usual loss, the doubt about the usual loss and the instruments' calibration put there.
L        lower triangular root of V, V = LL'.
w, a     L⁻¹r and L⁻¹f: residuals and columns on a scale where every direction has unit variance.
         In time order w are the innovations: each row less what earlier rows predicted of it.
T        how far the sum of squares γ = w'w falls when the size of a fault is left free:
         (a'w)²/(a'a); chi-square with one degree of freedom (one a column) if nothing is wrong.
b, u_b   estimated size of the fault (written less true, for a reading) and its standard uncertainty.
ρ (rho)  cosine between two faults in the metric of V. At ±1 no statistic can tell them apart.
λ        (lambda) noncentrality b²/u_b²: how loudly a fault of size b speaks. In an exponentially
         weighted average λ is the weight of the newest value instead.

Rooms: in `algebra` a month is described and r, V, L, w and a are made of it; it also has the chi-square tails, what is
left of columns beside faults already found, and how the usual loss is learnt. In `faults` explanations are tested and
ranked, several faults are taken one by one, and it is said what could not have been seen. `charts` whitens r and the
columns, and watches for what leans one way over many runs. `health` judges V itself.

Leaves out: units, the wording of findings, the clock and the database. Numbers here are floats; nothing
in this package is posted.

Sources: JCGM 100:2008, 5.1 and 5.2 (law of propagation); Tamhane and Mah, Technometrics 27 (1985) 409-422;
Narasimhan and Mah, AIChE J. 33 (1987) 1514-1521 (pages from memory); Crowe, Can. J. Chem. Eng. 70 (1992)
1030-1036; Narasimhan and Jordache, Data Reconciliation and Gross Error Detection (2000), chapters 7 and 8;
Bagajewicz and Jiang, Comput. Chem. Eng. 22 (1998), and Jiang and Bagajewicz, Ind. Eng. Chem. Res. 38 (1999);
Picard on sequential material balances, digital.library.unt.edu/ark:/67531/metadc1086101, with the theory pages
of sandialabs.github.io/MAPIT; Page, Biometrika 41 (1954) 100-115.
"""
