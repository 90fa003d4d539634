"""Where a new movement is driven to, and at which angle its needle is pressed on."""
