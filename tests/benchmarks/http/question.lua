-- wrk script. Environment: QUESTION is the body; @ in it becomes a number that no other request has, where
-- DISTINCT is set, to a number that no other run has.
local body = os.getenv("QUESTION")
local distinct = tonumber(os.getenv("DISTINCT"))
local counter = 0

function setup(thread)
  thread:set("first", counter * 100000000)
  counter = counter + 1
end

local number = 0
function request()
  local text = body
  if distinct then
    number = number + 1
    text = body:gsub("@", string.format("%.6f", 1 + distinct + (first + number) / 1e6))
  else
    text = body:gsub("@", "12.5")
  end
  return wrk.format("POST", "/v1/assess", {["Content-Type"] = "application/json"}, text)
end

function done(summary, latency)
  io.write(string.format("RESULT %.1f %.3f %.3f %d %d\n", summary.requests / (summary.duration / 1e6),
    latency:percentile(50) / 1000, latency:percentile(99) / 1000,
    summary.errors.status + summary.errors.read + summary.errors.timeout + summary.errors.connect,
    summary.requests))
end
