"""Maps and cards: one offline canvas, one small module per map or card, and the files a plan is written to.

Nothing here is imported before a map is drawn; folium is imported inside the functions that draw.
"""
