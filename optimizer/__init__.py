"""Find the upgrade bundle that delivers the most water through a canister filter loop, and prove it best."""
