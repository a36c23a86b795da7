"""The sheet that an approver signs for, with every number and its source."""
