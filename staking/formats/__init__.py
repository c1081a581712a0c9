"""Writers that know tables and drawings and nothing of the job."""
