"""Readings to adjusted points with covariance, misclosures, and suspects."""
