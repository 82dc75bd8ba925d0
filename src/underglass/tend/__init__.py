"""Choice over days: from the forecast to lid, covers and water at the times somebody is there."""
