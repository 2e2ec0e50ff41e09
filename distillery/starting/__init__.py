"""How the program starts and how a command ends: the environment read strictly, the console, one sentence."""
