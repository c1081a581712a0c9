"""Writers that know sheets, tables and drawings and nothing of the job: PDF, SVG, CSV."""
