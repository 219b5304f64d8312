"""A log of a bench beside the prediction: read, compared, fitted; tests of a coupon foretold."""
