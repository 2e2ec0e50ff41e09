"""An officer's first page: a time is chosen, and each thing an officer asks for has its answer, on the page and on
paper."""
