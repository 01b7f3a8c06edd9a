"""From one capture to ranked release sites."""
