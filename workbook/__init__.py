"""The workbook: live panels over the model, and the launcher that opens them in JupyterLab.

``python -m workbook`` starts it. Each panel is a folder: ``model.py`` says what is drawn and said, and
``view.py`` puts that into widgets and figures.
"""
